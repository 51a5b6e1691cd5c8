"""What may wait for a disk, a cable or a stick: each works beside the bench and reports back into its queue."""
