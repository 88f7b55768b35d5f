"""A phone's rules in Python, a clumsy network, and the real server: what can go wrong, tried at random."""
