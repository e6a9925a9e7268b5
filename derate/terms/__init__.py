"""The vocabulary: values, quantities, verdicts, places and problems. Imports nothing but the standard library."""
