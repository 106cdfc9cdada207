"""``python -m roomir`` does what ``roomir`` does."""

from roomir.cli.app import main

if __name__ == "__main__":
    main()
