"""Who may act: the crew's password and the boat's own certificate, in files for the watch's eyes alone."""
