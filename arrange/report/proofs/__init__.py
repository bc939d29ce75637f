"""What a publisher checks on printed pages, measured on the engraved pages themselves."""
