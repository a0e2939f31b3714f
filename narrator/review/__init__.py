"""The local web page on which the shop listens, corrects and approves."""
