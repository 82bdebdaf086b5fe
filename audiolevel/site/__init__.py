"""What is known of the place, the microphone and the job, and the file that says it."""
