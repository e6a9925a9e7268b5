"""A parts list as a drawing program writes it, read into the parts of a design: what was ordered, and nothing else."""
