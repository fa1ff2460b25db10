"""The command `plumbmark`: what `cli` has, and `serve`, which is of `web`.

`cli` and `web` do not know each other; they meet here.
"""

from plumbmark.cli.main import cli
from plumbmark.cli.main import main as run
from plumbmark.web.command import serve

cli.add_command(serve)


def main() -> None:
    """Run the command and leave with its exit code."""
    run()


# The processes that compute load this module too, under another name.
if __name__ == "__main__":
    main()
