"""The mains stage: the input while it runs, at switch-on, at restarts and in a surge; its protective parts."""
