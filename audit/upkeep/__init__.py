"""What a machine that runs this needs: backup sets, putting one back, health, serving. Nothing here is evidence."""
