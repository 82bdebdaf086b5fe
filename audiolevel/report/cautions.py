"""What can hurt somebody while a camera is fitted, tried or switched on.

Common practice; local codes, law and licensed practice go before it.
"""

CAUTIONS_ON_SITE = (
    "A ladder stands on firm ground, is held or tied, and is not for reaching aside; beside "
    "traffic have the lane closed or somebody watch it.",
    "Leave fixed mains wiring to licensed people, and keep clear of overhead lines.",
    "A test sound loud enough to fire a trigger can harm hearing and alarm others: keep it short, "
    "tell whoever is near, protect your own ears.",
    "Recording people may need their consent, a notice or a decision by whoever is responsible: "
    "ask before sound is switched on. The law of the place goes before anything said here.",
)
