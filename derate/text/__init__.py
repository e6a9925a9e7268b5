"""Reading text: YAML nodes with positions, quantities, formulas. No file is loaded here into a model."""
