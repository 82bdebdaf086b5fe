"""Results as JSON objects, as text for a terminal, as pictures: one file a command and medium.

A command's report stands in the room of its name: `measure`, `trial`, `calibrate`, `sounds` and
`followup` each hold the object whose keys are fixed, the lines of 80 columns and, if there is one,
the picture. `plan` has a room for each (`plan_object`, `plan_text`, `plan_picture`), and so has
`privacy` (`reviewed`, `review`, laid out by `sheet`, and `overheard`). A batch leaves `tables` and,
in `visits`, pictures. What several of them share is in `objects`, `text` and `figures`. None of
them computes anything about the site.
"""
