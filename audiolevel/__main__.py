"""`python -m audiolevel`."""

from audiolevel.cli import main

if __name__ == "__main__":
    main(prog_name="audiolevel")
