//! One reproducer for each kind of fault, with its exact message.

use crate::workshop::{check_new, messages, with};

/// The sound workshop with these files has exactly these faults, in this order.
fn check(changed: &[(&str, &str)], expected: &[&str]) {
    assert_eq!(messages(check_new(&with(changed))), expected.join("\n"));
}

#[test]
fn faults_of_materials() {
    check(
        &[("materials", "code,name,density\n,Water,\noil,,\n")],
        &[
            "materials.csv, row 2, column code: is empty; fill it in",
            "materials.csv, row 3, column name: is empty; fill it in",
            "offers.csv, row 3, column material: \"tin\" is not a known material; look at how it is written, or add it to materials",
            "formulas.csv, row 3, column ingredient: \"water\" is not a known material or premix; look at how it is written, or add it to materials or premixes",
            "formulas.csv, row 5, column ingredient: \"wax\" is not a known material or premix; look at how it is written, or add it to materials or premixes",
            "packaging.csv, row 2, column material: \"tin\" is not a known material; look at how it is written, or add it to materials",
            "lots.csv, row 3, column material: \"tin\" is not a known material or premix; look at how it is written, or add it to materials or premixes",
        ],
    );
    check(
        &[("materials", "code,name,density\nwater,Water,0\noil,Oil,heavy\nwax,Wax,-1\ntin,Tin,26\n")],
        &[
            "materials.csv, row 2, column density: \"0\" is nothing; write the density in g/ml (0.92), or leave the cell empty",
            "materials.csv, row 3, column density: \"heavy\" is not a number; write a number (0.92)",
            "materials.csv, row 4, column density: \"-1\" is negative; write a number from 0 up (0.92)",
            "materials.csv, row 5, column density: \"26\" is too large; write 25 at the most",
        ],
    );
    check(
        &[("materials", "code,name,kind\nwater,Water,liquid\noil,Oil,\nwax,Wax,\ntin,Tin,packaging\n")],
        &[
            "materials.csv, row 2, column kind: \"liquid\" is not known here; write raw or packaging",
            "offers.csv, row 2, column pack: \"1 l\" is a volume, and no density is known; give the material a density (a column `density`, g/ml), or write a mass",
        ],
    );
    check(
        &[(
            "materials",
            "code,name,kind,safety_stock\nwater,Water,,5 pcs\noil,Oil,,1 l\nwax,Wax,,-5 g\ntin,Tin,packaging,3 g\n",
        )],
        &[
            "materials.csv, row 2, column safety_stock: \"5 pcs\" counts pieces; write a mass or a volume (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp)",
            "materials.csv, row 3, column safety_stock: \"1 l\" is a volume, and no density is known; give the material a density (a column `density`, g/ml), or write a mass",
            "materials.csv, row 4, column safety_stock: \"-5 g\" is negative; write an amount from 0 up",
            "materials.csv, row 5, column safety_stock: \"3 g\" is a mass or a volume; write a number of pieces (24 pcs)",
        ],
    );
    check(
        &[(
            "materials",
            "code,name,kind,unopened_life,opened_life\nwater,Water,,soon,101 years\noil,Oil,,,\nwax,Wax,,,\ntin,Tin,packaging,,\n",
        )],
        &[
            "materials.csv, row 2, column unopened_life: \"soon\" is not a length of time; write 540 days, 6 weeks, 18 months, 2 years or an ISO 8601 duration (P18M)",
            "materials.csv, row 2, column opened_life: \"101 years\" is more than 100 years; write 100 years at the most, or leave the cell empty for what does not expire",
            "offers.csv, row 2, column pack: \"1 l\" is a volume, and no density is known; give the material a density (a column `density`, g/ml), or write a mass",
        ],
    );
    check(
        &[(
            "materials",
            "code,name,kind,max_leave_on,always_at_hand\nwater,Water,,101,maybe\noil,Oil,,,\nwax,Wax,,,\ntin,Tin,packaging,,\n",
        )],
        &[
            "materials.csv, row 2, column max_leave_on: \"101\" is too large; write 100 at the most",
            "materials.csv, row 2, column always_at_hand: \"maybe\" is not known here; write yes or no",
            "offers.csv, row 2, column pack: \"1 l\" is a volume, and no density is known; give the material a density (a column `density`, g/ml), or write a mass",
        ],
    );
    check(
        &[("materials", "code,name,kind\nwater,\"Wa\nter\",\noil,Oil,\noil,Oil,\nwax,Wax,\ntin,Tin,packaging\n")],
        &[
            "materials.csv, row 2, column name: \"Wa\u{fffd}ter\" holds a line break or another control character; write it in one line",
            "materials.csv, row 4: \"oil\" is in row 3 already; keep one of the two rows",
        ],
    );
    check(
        &[
            ("premixes", "code,formula\ninfusion,infused\n"),
            (
                "materials",
                "code,name,kind,density\ninfusion,Infusion,,\nwater,Water,,\noil,Oil,,0.92\nwax,Wax,,\ntin,Tin,packaging,\n",
            ),
        ],
        &[
            "premixes.csv, row 2, column code: \"infusion\" is a material already; materials and premixes share one list of codes: take another",
        ],
    );
}

#[test]
fn faults_of_suppliers_and_postage() {
    check(
        &[(
            "suppliers",
            "code,name,currency,lead_time_days,email\nnorth,North,EURO,5,a@b\nisle,Isle,GBP,9.5,x@y.example\n",
        )],
        &[
            "suppliers.csv, row 2, column currency: \"EURO\" is not a currency; write its three letters of ISO 4217 (EUR)",
            "suppliers.csv, row 2, column email: \"a@b\" is not an e-mail address; write one address (orders@supplier.example)",
            "suppliers.csv, row 3, column lead_time_days: \"9.5\" is not a whole number; write a whole number from 0 to 36525",
        ],
    );
    check(
        &[(
            "suppliers",
            "code,name,currency,lead_time_days,order_weekdays,closed,minimum_order,duty\nnorth,North,EUR,-1,Mo,2027-08-15/2027-08-01,12.345,-1\nisle,Isle,GBP,9,,August,1e308,\n",
        )],
        &[
            "suppliers.csv, row 2, column lead_time_days: \"-1\" is too small; write a whole number from 0 to 36525",
            "suppliers.csv, row 2, column order_weekdays: \"Mo\" is not a list of weekdays; write days such as Mon Thu",
            "suppliers.csv, row 2, column closed: \"2027-08-15/2027-08-01\" ends before it starts; write the first day first (2027-08-01/2027-08-15)",
            "suppliers.csv, row 2, column minimum_order: \"12.345\" has more than 2 decimal places; write at most 2 decimal places for EUR (12.50)",
            "suppliers.csv, row 2, column duty: \"-1\" is negative; write a number from 0 up (12.5)",
            "suppliers.csv, row 3, column closed: \"August\" is not a list of intervals; write first day/last day (2027-08-01/2027-08-15), with ; between several",
            "suppliers.csv, row 3, column minimum_order: \"1e308\" is not a number; write a number (12.50)",
        ],
    );
    check(
        &[("postage", "supplier,by,from,fee\nnorth,value,10,5\n")],
        &[
            "postage.csv, row 2: supplier north has no band from 0 on; add the band from 0, so that every order has its postage",
        ],
    );
    check(
        &[("postage", "supplier,by,from,fee\nnorth,value,0,5\nnorth,weight,500 g,6\n")],
        &["postage.csv, row 2: supplier north has bands by value and by weight; keep to one of the two"],
    );
    check(
        &[("postage", "supplier,by,from,fee\nnorth,size,0,5\nsouth,,0,5\nnorth,value,0,\n")],
        &[
            "postage.csv, row 2, column by: \"size\" is not known here; write value or weight",
            "postage.csv, row 3, column supplier: \"south\" is not a known supplier; look at how it is written, or add it to suppliers",
            "postage.csv, row 4: \"north, from 0\" is in row 2 already; keep one of the two rows",
            "postage.csv, row 4, column fee: is empty; fill it in",
        ],
    );
}

#[test]
fn faults_of_offers_and_rates() {
    check(
        &[("offers", "supplier,material,pack,price\nnorth,oil,5 kgs,14.50\nnorht,wax,1 kg,20\nnorth,waxx,1 kg,20\n")],
        &[
            "offers.csv, row 2, column pack: \"5 kgs\" is not an amount; write a number and a unit (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp, pcs)",
            "offers.csv, row 3, column supplier: \"norht\" is not a known supplier; did you mean \"north\"? If not, add it to suppliers",
            "offers.csv, row 4, column material: \"waxx\" is not a known material; did you mean \"wax\"? If not, add it to materials",
        ],
    );
    check(
        &[(
            "offers",
            "supplier,material,pack,price\nnorth,wax,1 l,14.50\nnorth,wax,0 g,20\nnorth,tin,3 g,20\nnorth,tin,1.5 pcs,20\nnorth,wax,NaN g,20\nnorth,wax,1e308 g,20\nnorth,wax,2000000000 kg,20\n",
        )],
        &[
            "offers.csv, row 2, column pack: \"1 l\" is a volume, and no density is known; give the material a density (a column `density`, g/ml), or write a mass",
            "offers.csv, row 3, column pack: \"0 g\" is nothing; write an amount above 0",
            "offers.csv, row 4, column pack: \"3 g\" is a mass or a volume; write a number of pieces (24 pcs)",
            "offers.csv, row 5, column pack: \"1.5 pcs\" is not a whole number of pieces; write a whole number of pieces (24 pcs)",
            "offers.csv, row 6, column pack: \"NaN g\" is not an amount; write a number and a unit (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp, pcs)",
            "offers.csv, row 7, column pack: \"1e308 g\" is not an amount; write a number and a unit (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp, pcs)",
            "offers.csv, row 8, column pack: \"2000000000 kg\" is too large; write at most 1000000000 kg or 1000000000000000 pcs",
        ],
    );
    check(
        &[(
            "offers",
            "supplier,material,pack,price,from_packs\nnorth,wax,1 kg,14.50,0\nnorth,wax,1 kg,14.00,5\nnorth,wax,1000 g,13,5\nnorth,wax,1 kg,-3,7\nnorth,infusion,1 kg,3,\n",
        )],
        &[
            "offers.csv, row 2, column from_packs: \"0\" is too small; write a whole number from 1 to 1000000",
            "offers.csv, row 4: \"north, wax, 1000 g, from 5\" is in row 3 already; keep one of the two rows",
            "offers.csv, row 5, column price: \"-3\" is negative; write a number from 0 up (12.50)",
            "offers.csv, row 6, column material: \"infusion\" is not a known material; look at how it is written, or add it to materials",
        ],
    );
    check(
        &[(
            "offers",
            "supplier,material,pack,price,from_packs,life_on_arrival,item_no\nnorth,wax,1 kg,14.50,,12 months,A1\nnorth,wax,1 kg,14.00,5,6 months,A2\n",
        )],
        &[
            "offers.csv, row 3, column life_on_arrival: \"6 months\" is not that of the first row of this pack; repeat it, leave it empty, or write the pack differently",
            "offers.csv, row 3, column item_no: \"A2\" is not that of the first row of this pack; repeat it, leave it empty, or write the pack differently",
        ],
    );
    check(
        &[("rates", "date,currency,rate\n2027-03-01,EUR,1.1\n1.3.2027,GBP,1.1\n2027-03-01,GBP,0\n2027-03-02,ZZZ,1\n")],
        &[
            "rates.csv, row 2, column rate: \"1.1\" is the rate of the home currency; take the row out, or write 1",
            "rates.csv, row 3, column date: \"1.3.2027\" is not a date; write year-month-day (2027-03-09)",
            "rates.csv, row 4, column rate: \"0\" is nothing; write how much home currency one unit costs (0.92)",
            "rates.csv, row 5, column currency: \"ZZZ\" is not a currency; write its three letters of ISO 4217 (EUR)",
        ],
    );
}

#[test]
fn faults_of_lots_and_orders() {
    check(
        &[(
            "lots",
            "lot,material,amount,cost,currency,state\nL1,oil,5 pcs,1,,\nL2,tin,5 g,1,,\nL3,oli,5 g,1,,\nL4,infusion,5 ml,1,,open\nL5,oil,5 g,1.234,XAU,\n",
        )],
        &[
            "lots.csv, row 2, column amount: \"5 pcs\" counts pieces; write a mass or a volume (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp)",
            "lots.csv, row 3, column amount: \"5 g\" is a mass or a volume; write a number of pieces (24 pcs)",
            "lots.csv, row 4, column material: \"oli\" is not a known material or premix; did you mean \"oil\"? If not, add it to materials or premixes",
            "lots.csv, row 5, column amount: \"5 ml\" is a volume; weigh the premix and write its mass (mg, g, kg, oz, lb)",
            "lots.csv, row 5, column state: \"open\" is not known here; write released, quarantine or rejected",
            "lots.csv, row 6, column currency: \"XAU\" is not a currency; write its three letters of ISO 4217 (EUR)",
        ],
    );
    check(
        &[("lots", "lot,material,amount,supplier,received,order\nL1,oil,5 g,nord,2027-02-30,o1\n")],
        &[
            "lots.csv, row 2, column supplier: \"nord\" is not a known supplier; look at how it is written, or add it to suppliers",
            "lots.csv, row 2, column received: \"2027-02-30\" is not a date; write year-month-day (2027-03-09)",
            "lots.csv, row 2, column order: \"o1\" is not a known order; look at how it is written, or add it to orders",
        ],
    );
    check(
        &[(
            "orders",
            "order,supplier,material,pack,packs,expected\no1,north,oil,1 l,2,2027-03-20\no1,isle,tin,50 pcs,1,2027-03-20\no2,north,oil,1 l,0,2027-03-20\no3,north,oil,1 l,1.5,\n",
        )],
        &[
            "orders.csv, row 3, column supplier: \"isle\" is not the supplier of order o1 (north); an order goes to one supplier: take another order code",
            "orders.csv, row 4, column packs: \"0\" is too small; write a whole number from 1 to 1000000",
            "orders.csv, row 5, column packs: \"1.5\" is not a whole number; write a whole number from 1 to 1000000",
            "orders.csv, row 5, column expected: is empty; fill it in",
        ],
    );
    check(
        &[(
            "orders",
            "order,supplier,material,pack,packs,expected,packs_received\no1,north,oil,1 l,2,2027-03-20,3\no2,north,wax,1000000000 kg,2,2027-03-20,\n",
        )],
        &[
            "orders.csv, row 2, column packs_received: \"3\" is more than the packs that were ordered; write down what came beyond the order as a lot of its own",
            "orders.csv, row 3, column packs: \"2\" packs are more than can be counted; write fewer packs, or a smaller pack",
        ],
    );
}

#[test]
fn faults_of_formulas_and_premixes() {
    check(
        &[("formulas", "formula,version,ingredient,percent\ninfused,,oil,95\nsalve,2,infusion,70\nsalve,2,wax,28.5\n")],
        &[
            "formulas.csv, row 2: formula infused, version 1, adds up to 95 %; make it 100 %, or write balance for one of the ingredients",
            "formulas.csv, row 3: formula salve, version 2, adds up to 98.5 %; make it 100 %, or write balance for one of the ingredients",
        ],
    );
    check(
        &[(
            "formulas",
            "formula,version,ingredient,percent\ninfused,,oil,balance\ninfused,,water,balance\nsalve,2,infusion,101\nsalve,2,wax,balance\nsalve,3,oil,60\nsalve,3,wax,60\nsalve,3,water,balance\n",
        )],
        &[
            "formulas.csv, row 4, column percent: \"101\" is too large; write 100 at the most, or balance",
            "formulas.csv, row 2: formula infused, version 1, has 2 balance lines; write balance for one ingredient and a percent for the others",
            "formulas.csv, row 6: formula salve, version 3, adds up to 120 % without its balance; leave room for the balance: 100 % at the most",
        ],
    );
    check(
        &[(
            "formulas",
            "formula,version,ingredient,percent\ninfused,,oil,0.95\ninfused,,water,0.05\nsalve,2,infusion,70\nsalve,2,tin,30\n",
        )],
        &[
            "formulas.csv, row 5, column ingredient: \"tin\" is packaging; write a raw material or a premix; packaging belongs into packaging",
            "formulas.csv, row 2: formula infused, version 1, adds up to 1 %; write percent, not fractions (a percent cell of a spreadsheet holds 0.05 for 5 %: make it a number)",
        ],
    );
    check(
        &[("formulas", "formula,version,ingredient,percent\ninfused,,oil,95\ninfused,,infusion,5\nsalve,2,wax,100\n")],
        &[
            "formulas.csv, row 3: a premix contains itself: infusion -> infusion; take one of them out of the formula of the next",
        ],
    );
    check(
        &[("premixes", "code,formula,loss\ninfusion,infuse,100\nwax,salve,\n")],
        &[
            "premixes.csv, row 2, column formula: \"infuse\" is not a known formula; did you mean \"infused\"? If not, add it to formulas",
            "premixes.csv, row 2, column loss: \"100\" would leave nothing; write a loss below 100 %",
            "premixes.csv, row 3, column code: \"wax\" is a material already; materials and premixes share one list of codes: take another",
        ],
    );
    check(
        &[
            ("premixes", "code,formula\ninfusion,infused\na,fa\nb,fb\n"),
            (
                "formulas",
                "formula,version,ingredient,percent\ninfused,,oil,100\nsalve,2,wax,100\nfa,1,b,100\nfb,9,oil,100\nfb,10,a,50\nfb,10,oil,50\n",
            ),
        ],
        &[
            "formulas.csv, row 4: a premix contains itself: a -> b -> a; take one of them out of the formula of the next",
        ],
    );
}

#[test]
fn faults_of_products_and_packaging() {
    check(
        &[("products", "code,name,formula,version,use,net_mass,pieces_per_mould\nbalm,Balm,salve,3,leave,0 g,0\n")],
        &[
            "products.csv, row 2, column version: \"3\" is no version of formula salve; write one of 2, or leave it empty for the newest",
            "products.csv, row 2, column use: \"leave\" is not known here; write leave-on or rinse-off",
            "products.csv, row 2, column net_mass: \"0 g\" is nothing; write an amount above 0",
            "products.csv, row 2, column pieces_per_mould: \"0\" is too small; write a whole number from 1 to 1000000000",
        ],
    );
    check(
        &[("products", "code,name,formula\nbalm,Balm,salve\n")],
        &[
            "plan.csv, row 2: entry p1 is planned in pieces, and product balm has no net_mass; give the product its net_mass, or plan a mass",
        ],
    );
    check(
        &[(
            "products",
            "code,name,formula,net_mass\nbalm,Balm,slave,30 g\nbutter,Butter,salve,30 ml\nbar,Bar,salve,2 pcs\n",
        )],
        &[
            "products.csv, row 2, column formula: \"slave\" is not a known formula; did you mean \"salve\"? If not, add it to formulas",
            "products.csv, row 3, column net_mass: \"30 ml\" is a volume; write a mass (mg, g, kg, oz, lb)",
            "products.csv, row 4, column net_mass: \"2 pcs\" counts pieces; write a mass (mg, g, kg, oz, lb)",
        ],
    );
    check(
        &[("packaging", "product,material,per_piece,per_batch\nbalm,wax,1,\nbalm,tin,,\nbalmm,tin,1,1.5\n")],
        &[
            "packaging.csv, row 2, column material: \"wax\" is a raw material; write a material of kind packaging",
            "packaging.csv, row 3: says how many neither for a piece nor for a batch; fill in per_piece or per_batch",
            "packaging.csv, row 4, column product: \"balmm\" is not a known product; did you mean \"balm\"? If not, add it to products",
            "packaging.csv, row 4, column per_batch: \"1.5\" is not a whole number; write a whole number from 0 to 1000000000",
        ],
    );
}

#[test]
fn faults_of_the_plan() {
    check(
        &[(
            "plan",
            "entry,product,amount,make_on,ready_by\np1,balm,24 pcs,2027-04-01,2027-04-02\np2,balm,1.5 moulds,,2027-04-02\np3,balm,5,,2027-04-02\np4,balm,0 pcs,2027-04-01,\np5,balm,1 l,2027-04-01,\np6,balm,2 moulds,,\np7,balmy,2 moulds,2027-04-01,\n",
        )],
        &[
            "plan.csv, row 2, column ready_by: \"2027-04-02\" stands beside a make_on; write one of the two: the day it is made, or the day it is ready",
            "plan.csv, row 3, column amount: \"1.5 moulds\" is not a number of moulds: it is not a whole number; write whole moulds (2 moulds)",
            "plan.csv, row 4, column amount: \"5\" is not an amount; write pieces (24 pcs), moulds (2 moulds) or a mass (1.5 kg)",
            "plan.csv, row 5, column amount: \"0 pcs\" is nothing; write an amount above 0",
            "plan.csv, row 6, column amount: \"1 l\" is a volume; write pieces (24 pcs), moulds (2 moulds) or a mass (1.5 kg)",
            "plan.csv, row 7: has no day; fill in make_on or ready_by",
            "plan.csv, row 8, column product: \"balmy\" is not a known product; did you mean \"balm\"? If not, add it to products",
        ],
    );
    check(
        &[
            ("products", "code,name,formula,net_mass,pieces_per_mould\nbalm,Balm,salve,30 g,12\nbar,Bar,salve,1 kg,\n"),
            (
                "plan",
                "entry,product,amount,make_on\np1,bar,1000000000 pcs,2027-04-01\np2,bar,1000000001 pcs,2027-04-01\np3,bar,2 moulds,2027-04-01\np4,balm,-2 moulds,2027-04-01\n",
            ),
        ],
        &[
            "plan.csv, row 3, column amount: \"1000000001 pcs\" is too large; write fewer pieces",
            "plan.csv, row 5, column amount: \"-2 moulds\" is not a number of moulds: it is too small; write whole moulds (2 moulds)",
            "plan.csv, row 4: entry p3 is planned in moulds, and product bar has no pieces_per_mould; give the product its pieces_per_mould, or plan pieces or a mass",
        ],
    );
    check(
        &[
            (
                "products",
                "code,name,formula,net_mass,pieces_per_mould\nbalm,Balm,salve,30 g,2\nbar,Bar,salve,2 kg,12\n",
            ),
            ("plan", "entry,product,amount,make_on\np1,bar,999999999 pcs,2027-04-01\n"),
        ],
        &["plan.csv, row 2: entry p1 is planned in pieces, more of them than can be weighed; plan fewer"],
    );
}

#[test]
fn faults_of_settings_batches_and_the_ledger() {
    check(
        &[("settings", "setting,value\nhome_currency,GBP\n")],
        &[
            "settings.csv, row 2, column value: \"GBP\" is not the home currency of this store (EUR); import into a new store, or take the row out",
        ],
    );
    check(
        &[("batches", "batch,product,formula,version,made_on,mass,pieces\nB1,balmo,salve,2,2027-03-01,1 l,-1\n")],
        &[
            "batches.csv, row 2, column product: \"balmo\" is not a known product; did you mean \"balm\"? If not, add it to products",
            "batches.csv, row 2, column mass: \"1 l\" is a volume; write a mass (mg, g, kg, oz, lb)",
            "batches.csv, row 2, column pieces: \"-1\" is too small; write a whole number from 0 to 1000000000000000",
        ],
    );
    check(
        &[(
            "ledger",
            "movement,act,kind,lot,amount,unit,cost,day,recorded_at\n1,1,receipt,L1,-5,mg,0,2027-03-01,2027-03-01\n2,1,gift,L9,5,pcs,0.001,2027-03-01,2027-03-01T00:00:00Z\n3,1,issue,L1,-5,pcs,0,2027-03-01,2027-03-01T00:00:00Z\n",
        )],
        &[
            "ledger.csv, row 2, column recorded_at: \"2027-03-01\" is not a moment in UTC; write it as 2027-03-09T08:15:00Z",
            "ledger.csv, row 2, column amount: \"-5\" has the wrong sign; a receipt adds (above 0), an issue, a write-off and a return take (below 0)",
            "ledger.csv, row 3, column lot: \"L9\" is not a known lot; did you mean \"L1\"? If not, add it to lots",
            "ledger.csv, row 3, column kind: \"gift\" is not known here; write receipt, issue, count, write-off or return",
            "ledger.csv, row 3, column cost: \"0.001\" has more than 2 decimal places; write a number with at most 2 decimal places",
            "ledger.csv, row 4, column unit: \"pcs\" is not the unit of this lot; write mg",
        ],
    );
    check(
        &[(
            "ledger",
            "movement,act,kind,lot,amount,unit,cost,day,recorded_at,reverses\n1,1,receipt,L1,5,mg,0,2027-03-01,2027-03-01T00:00:00Z,\n2,1,issue,L1,-6,mg,0,2027-03-01,2027-03-01T00:00:00Z,\n3,1,issue,L1,6,mg,0,2027-03-01,2027-03-01T00:00:00Z,4\n",
        )],
        &[
            "ledger.csv, row 3: movement 2 takes more from lot L1 than it holds; look for a receipt or a count that is missing before it",
            "ledger.csv, row 4: movement 3 reverses one that is not before it; write the number of the movement that was wrong",
        ],
    );
}

#[test]
fn faults_of_acts_weighings_pieces_and_changes() {
    let batches = (
        "batches",
        "batch,entry,fulfils_entry,product,premix,formula,version,made_on,mass,pieces,undone\nB1,,yes,balm,,salve,2,2027-03-01,1 kg,4,\nB2,,,,infuson,infused,1,2027-03-01,1 kg,0,\nB3,,,balm,infusion,salve,2,2027-03-01,1 kg,4,perhaps\nB4,,,,,salve,2,2027-03-01,1 kg,4,\n",
    );
    check(
        &[batches],
        &[
            "batches.csv, row 2, column fulfils_entry: \"yes\" says yes without an entry; name the plan entry, or leave the cell empty",
            "batches.csv, row 3, column premix: \"infuson\" is not a known premix; did you mean \"infusion\"? If not, add it to premixes",
            "batches.csv, row 4, column product: \"balm\" is filled, and premix too; name the product or the premix that was made, one of the two",
            "batches.csv, row 4, column undone: \"perhaps\" is not known here; write yes or no",
            "batches.csv, row 5, column product: is empty, and premix too; name the product or the premix that was made, one of the two",
        ],
    );
    let sound = ("batches", "batch,product,formula,version,made_on,mass,pieces\nB1,balm,salve,2,2027-03-01,1 kg,4\n");
    let acts = ("acts", "act,kind,subject,recorded_at,undoes\n1,make,B1,2027-03-01T00:00:00Z,\n2,undo,B1,today,2\n");
    check(
        &[sound, acts],
        &[
            "acts.csv, row 3, column recorded_at: \"today\" is not a moment in UTC; write it as 2027-03-09T08:15:00Z",
            "acts.csv, row 3, column undoes: \"2\" is not before this act; write the number of the act that was undone",
        ],
    );
    let acts = ("acts", "act,kind,recorded_at\n1,make,2027-03-01T00:00:00Z\n");
    let weighings = (
        "weighings",
        "batch,place,lot,target,weighed,tare,reason\nB1,1,L1,10 pcs,5 g,,\nB9,0,L2,3 pcs,3 g,1 l,\nB1,1,L1,,5 g,,\n",
    );
    check(
        &[sound, acts, weighings],
        &[
            "weighings.csv, row 2, column target: \"10 pcs\" counts pieces; write a mass or a volume (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp)",
            "weighings.csv, row 3, column batch: \"B9\" is not a known batch; did you mean \"B1\"? If not, add it to batches",
            "weighings.csv, row 3, column place: \"0\" is too small; write a whole number from 1 to 1000000",
            "weighings.csv, row 4: \"1 of batch B1\" is in row 2 already; keep one of the two rows",
        ],
    );
    let pieces = "piece_movement,act,batch,kind,pieces,day,reason,reverses\n";
    check(
        &[sound, acts, ("pieces", &format!("{pieces}1,1,B1,made,-4,2027-03-01,,\n2,7,B1,lost,1,2027-03-01,,\n"))],
        &[
            "pieces.csv, row 2, column pieces: \"-4\" has the wrong sign; made adds (above 0), sale, gift, sample and waste take (below 0), a reversal does the opposite",
            "pieces.csv, row 3, column act: \"7\" is no known act; add it to acts",
            "pieces.csv, row 3, column kind: \"lost\" is not known here; write made, sale, gift, sample, waste or count",
        ],
    );
    check(
        &[
            sound,
            acts,
            (
                "pieces",
                &format!(
                    "{pieces}1,1,B1,made,4,2027-03-01,,\n2,1,B1,sale,-5,2027-03-01,,\n3,1,B1,sale,5,2027-03-01,,4\n"
                ),
            ),
        ],
        &[
            "pieces.csv, row 3: 2 takes more pieces from batch B1 than it has; look for a row of made or count that is missing before it",
            "pieces.csv, row 4: 3 reverses one that is not before it; write the number of the row that was wrong",
        ],
    );
    check(
        &[
            sound,
            acts,
            (
                "changes",
                "change,act,what,code,field,before,after\n1,1,lot,L1,cost,1,2\n2,1,supplier,north,name,a,b\n3,3,plan,p1,stands,,yes\n",
            ),
        ],
        &[
            "changes.csv, row 2, column field: \"cost\" is not known here; write state, opened, best_before or place",
            "changes.csv, row 3, column what: \"supplier\" is not known here; write lot, order, plan, batch, formula or wish",
            "changes.csv, row 4, column act: \"3\" is no known act; add it to acts",
        ],
    );
}
