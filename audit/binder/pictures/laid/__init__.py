"""Pictures laid out: where each line, box, sign and letter stands, for the paper and for the screen alike.

Pure: values in (`binder.pictures.values`), marks out (`marks`). What draws them says how wide its letters are and how
much room there is (`hand.Hand`, and the sizes of each picture), and what each look is: greys or classes.
"""
