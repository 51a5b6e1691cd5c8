"""Proofs on a whole emulated board: installed, touched, its plug pulled."""
