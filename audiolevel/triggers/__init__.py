"""Sound triggers: when one fires, and what it makes of a sound in the state the site left it in."""
