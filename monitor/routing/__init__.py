"""From bytes on a bus to readings in channels: the settings' feeds, compiled once."""
