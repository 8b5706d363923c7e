"""The finished runs that come with the demo, and how they are made anew."""
