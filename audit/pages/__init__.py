"""Pages that show judgement, one file a page. They read; what is entered is entered through `records.log`."""
