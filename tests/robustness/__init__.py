"""Damaged and odd files of every kind that the program reads, and what it makes of them."""
