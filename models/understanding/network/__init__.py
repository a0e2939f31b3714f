"""How the act model's network is made: a large encoder learns the acts, a small network learns from it."""
