"""`python -m monitor` and the command `ebbwatch`."""

from monitor.commands.line import main

if __name__ == "__main__":
    main()
