from .access import (
    ADMITS as ADMITS,
    AccessFile as AccessFile,
    ShopAccess as ShopAccess,
    parse_access as parse_access,
    parse_address as parse_address,
    read_access as read_access,
    read_password as read_password,
    write_private as write_private,
)
from .keeping import admit as admit, set_up as set_up
from .service import SendingService as SendingService, one_round as one_round
from .shop_pages import write_pages as write_pages
