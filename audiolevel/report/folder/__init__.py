"""What a site's folder has to say."""
