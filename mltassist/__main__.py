"""`python -m mltassist` is the command."""

from mltassist.cli.main import main

if __name__ == "__main__":
    main()
