"""Results as pages: one HTML file each, which needs no network and holds no sound.

Which words and pictures stand where is decided here; the words and the pictures themselves are
made in `report`. What a page does when it is touched is in the JavaScript beside these modules.
"""
