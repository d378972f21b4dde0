"""What a job touched, which class and tests that asks, whether a test ran after it, and what each test showed."""
