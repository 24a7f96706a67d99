"""From a snapshot to finished words and drawn lines: no template counts, no number is bare."""
