"""Parts by themselves: ratings at a condition, capacitors cold and worn, windings, life over the hours of a site."""
