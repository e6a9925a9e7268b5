"""Many designs: judged by all cores or a cluster, kept in one store, and what can be asked of them."""
