"""The settings as every command takes them: read, and bound to what their sources can say."""

from pathlib import Path

from monitor.alerts.rulebook import Rulebook
from monitor.routing.router import Router
from monitor.settings import Settings
from monitor.settings_file import read_settings


def understood(path: Path) -> Settings:
    """The settings in that file. Raises SettingsError with every mistake, before anything starts."""
    settings = read_settings(path)
    Router(settings)
    Rulebook(settings).checked()
    return settings
