"""Where Kivy finds `style.kv`: its rules for its own widgets, as far as ours are made of them."""
