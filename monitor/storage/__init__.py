"""The boat's logbook: one SQLite file, one writer, any number of read-only readers.

Everything stands by boot and elapsed time and is never rewritten when the clock becomes known;
readers place it in UTC through the boot's anchors (`monitor.clock.Boot`).
"""
