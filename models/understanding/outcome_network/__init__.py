"""How the outcome model's network is made: a large encoder learns, a small network learns from it."""
