"""A visit step by step: which page comes when, what the answers amount to, what is still to be proven. Pure."""
