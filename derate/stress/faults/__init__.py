"""Single faults: the list of the mains path, what opens, the partial short."""
