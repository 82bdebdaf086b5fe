"""The words of the program, in one voice: text, JSON, pages and pictures take them from here."""
