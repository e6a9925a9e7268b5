"""The stresses: structure and facts in, rows of the ledger out."""
