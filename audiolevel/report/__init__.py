"""How is a result told: as a JSON object, as text for a terminal, as a picture?

`objects` makes the dictionaries whose keys are fixed, `text` the lines of 80 columns and `figures`
the pictures; none of them computes anything about the site.
"""
