"""What to buy, purchases and how sheets are cut."""
