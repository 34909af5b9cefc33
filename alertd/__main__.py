"""``python -m alertd`` is ``alertd``."""

from alertd.cli import main

main(prog_name="alertd")
