"""``python -m runner``: the same as the console command."""

from runner.cli import run

if __name__ == "__main__":
    run()
