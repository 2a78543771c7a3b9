"""`python -m batch` is the same command as `farmbatch`."""

from batch.cli import main

if __name__ == "__main__":
    main()
