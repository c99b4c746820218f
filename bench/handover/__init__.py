"""What the record hands to each stage: what stages before it found, planned and decided, as its choices.

Named after the stage that takes it.  Nothing here is drawn, and nothing is written.
"""
