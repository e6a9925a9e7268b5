"""What insulation has to be: ledger rows and tables of an insulation pack in, requirement rows out, each step a row."""
