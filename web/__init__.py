"""The screens: finished words and drawings of what the watch knows."""
