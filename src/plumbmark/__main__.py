"""`python -m plumbmark` is the command `plumbmark`."""

from plumbmark.cli.main import main

main()
