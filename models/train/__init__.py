"""How the second ear is made: text, speech, training, export, graphs. See models/shop/README.md."""
