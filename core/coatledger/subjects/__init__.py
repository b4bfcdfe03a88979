"""What the facts make of each thing they name: piece, order, lot, gun, room and the rest."""
