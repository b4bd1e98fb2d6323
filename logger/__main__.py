"""`python -m logger` is the same command as `beadwatch`."""

from logger.cli.main import main

if __name__ == "__main__":
    main()
