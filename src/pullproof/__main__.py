"""`python -m pullproof` does what the `pullproof` command does."""

from pullproof.cli.main import run

if __name__ == "__main__":
    run()
