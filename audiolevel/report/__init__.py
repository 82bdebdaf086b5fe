"""Results as documents, pictures and JSON.

What a command has to say is one document (`document`), made in `report/<command>/document.py`;
terminal (`text`), Markdown (`markdown`) and pages (`html`, `page`) are renderings of it. Its words
stand in `words`. What a page does when it is touched is in the JavaScript of `scripts`.
"""
