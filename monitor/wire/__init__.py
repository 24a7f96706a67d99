"""Bytes in, values out: the message tables of the standards and what reads them. Pure."""
