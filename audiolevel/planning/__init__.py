"""From measurements of a site to a gain and a trigger: predictions, options, choice and plan."""
