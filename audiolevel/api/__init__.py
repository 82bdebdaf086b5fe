"""The Python API by subject: what `import audiolevel` hands on; the command line uses it alone."""
