"""From a photo of a board to a true-scale picture and suggested marks. Bytes and arrays in, values out."""
