"""The touchscreen: the Kivy application, its screens and widgets."""
