"""What dev.py is made of; standard library only."""
