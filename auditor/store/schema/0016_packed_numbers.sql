-- Numbers of every frame, packed (store/packed_numbers.py): a seventh of their room.
UPDATE trip_numbers SET light = numbers_packed(light), detail = numbers_packed(detail);
