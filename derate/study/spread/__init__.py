"""What tolerance does to the stresses of a design: extreme value, root sum of squares, draws."""
