"""`python -m hertzwright` does what the command `hertzwright` does."""

from hertzwright.cli.app import main

if __name__ == "__main__":
    raise SystemExit(main())
