"""What many cycles or parts show together: control charts of values in time, and how long parts last. Pure."""
