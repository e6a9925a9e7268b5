"""The ledger of stresses: who, which quantity, at which case, how much, from what."""
