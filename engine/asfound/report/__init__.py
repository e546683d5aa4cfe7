"""Documents from a judged record: what they say is prepared once (`content`), each format only lays it out."""
