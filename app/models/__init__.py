"""The records: every table of the shop, one noun a file."""

from app.models.batches import Batch, BatchLine, BatchOperation, Clock, LoggedMinutes
from app.models.costs import OtherCost
from app.models.designs import Choice, Design, Journal, Part, Price, Variant, VariantPicture
from app.models.documents import Document, LabelWords, Letterhead
from app.models.markets import Market, MarketGuess, MarketLine
from app.models.materials import Material, Offer, OfferBreak, Paper, StockSheet, Supplier
from app.models.orders import (
    Customer,
    Delivery,
    DeliveryLine,
    Order,
    OrderLine,
    OrderPhoto,
    OrderReturn,
    Payment,
)
from app.models.outlets import (
    Outlet,
    OutletPayment,
    Statement,
    StatementDraw,
    StatementLine,
)
from app.models.plans import KeptPlan
from app.models.purchases import Purchase, PurchaseLine, Receipt, ReceiptLine
from app.models.recipes import GoodsLine, Recipe, RecipePart
from app.models.sales import Sale, SaleDraw, SaleLine
from app.models.seals import Seal
from app.models.shop import Channel, Deed, NumberSeries, OperationTime, PostageBand, Shop
from app.models.stock import Lot, Movement

__all__ = [
    "Batch",
    "BatchLine",
    "BatchOperation",
    "Channel",
    "Choice",
    "Clock",
    "Customer",
    "Deed",
    "Delivery",
    "DeliveryLine",
    "Design",
    "Document",
    "GoodsLine",
    "Journal",
    "KeptPlan",
    "LabelWords",
    "Letterhead",
    "LoggedMinutes",
    "Lot",
    "Market",
    "MarketGuess",
    "MarketLine",
    "Material",
    "Movement",
    "NumberSeries",
    "Offer",
    "OfferBreak",
    "OperationTime",
    "Order",
    "OrderLine",
    "OrderPhoto",
    "OrderReturn",
    "OtherCost",
    "Outlet",
    "OutletPayment",
    "Paper",
    "Part",
    "Payment",
    "PostageBand",
    "Price",
    "Purchase",
    "PurchaseLine",
    "Receipt",
    "ReceiptLine",
    "Recipe",
    "RecipePart",
    "Sale",
    "SaleDraw",
    "SaleLine",
    "Seal",
    "Shop",
    "Statement",
    "StatementDraw",
    "StatementLine",
    "StockSheet",
    "Supplier",
    "Variant",
    "VariantPicture",
]
