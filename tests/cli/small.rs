//! A workshop of a few lots with a history, small enough to be checked by hand: an oil that came twice under one lot
//! number, an infusion made of it, a salve made of both.

use crate::workshop::Workshop;

/// The day on which the tests ask.
pub const TODAY: &str = "2027-03-01";

const FILES: [(&str, &str); 13] = [
    ("suppliers.csv", "code,name,currency,lead_time_days\nnorth,North Oils,EUR,3\nisle,Isle Botanicals,GBP,5\n"),
    (
        "materials.csv",
        "code,name,kind,inci,caution\noil,Olive oil,raw,Olea Europaea Fruit Oil,\nwax,Beeswax,raw,Cera Alba,hot wax burns\n\
         petals,Calendula petals,raw,Calendula Officinalis Flower,\ntin,Tin 60 ml,packaging,,\n",
    ),
    (
        "formulas.csv",
        "formula,version,ingredient,percent,phase\nf-infusion,1,oil,90,steep\nf-infusion,1,petals,10,steep\n\
         f-salve,1,infusion,60,heated\nf-salve,1,oil,20,heated\nf-salve,1,wax,20,heated\n",
    ),
    ("premixes.csv", "code,formula,make_ahead_days\ninfusion,f-infusion,28\n"),
    ("products.csv", "code,name,formula,use,net_mass\nsalve,Calendula salve,f-salve,leave-on,50 g\n"),
    ("packaging.csv", "product,material,per_piece\nsalve,tin,1\n"),
    (
        "lots.csv",
        "lot,material,amount,supplier,supplier_lot,received,cost,currency,place\n\
         L1,oil,1 kg,north,X-17,2027-01-05,10.00,EUR,shelf A\n\
         L2,oil,500 g,north,X-17,2027-01-20,6.00,EUR,shelf A\n\
         L3,wax,400 g,isle,W-9,2027-01-05,8.00,GBP,shelf B\n\
         L4,petals,200 g,,,2027-01-05,5.00,EUR,\n\
         L5,tin,100 pcs,north,T-1,2027-01-05,20.00,EUR,shelf C\n\
         LI,infusion,500 g,,,2027-01-10,5.75,EUR,shelf B\n",
    ),
    ("rates.csv", "date,currency,rate\n2027-01-01,GBP,1.20\n2027-02-20,GBP,1.25\n"),
    (
        "acts.csv",
        "act,kind,subject,recorded_at,undoes\n1,receive,,2027-01-20T08:00:00Z,\n2,make,B-1,2027-02-10T08:00:00Z,\n\
         3,make,B-2,2027-02-15T08:00:00Z,\n4,pieces,B-2,2027-02-25T08:00:00Z,\n5,write-off,,2027-02-28T08:00:00Z,\n\
         6,undo,B-2,2027-02-28T09:00:00Z,\n",
    ),
    (
        "batches.csv",
        "batch,entry,fulfils_entry,product,premix,formula,version,made_on,mass,pieces,best_before,weighed_by,note,undone\n\
         B-1,,,,infusion,f-infusion,1,2027-01-10,500 g,0,,Ilse,,\n\
         B-2,,,salve,,f-salve,1,2027-02-15,500 g,10,2028-01-31,Ilse,set a little soft,\n",
    ),
    // The salve takes 3.45 + 1.20 + 2.00 GBP at 1.20 + 2.00 = 9.05 EUR.
    (
        "ledger.csv",
        "movement,act,kind,lot,amount,unit,cost,day,recorded_at,reason,batch,reverses\n\
         1,1,receipt,L1,1000000,mg,10.00,2027-01-05,2027-01-20T08:00:00Z,,,\n\
         2,1,receipt,L2,500000,mg,6.00,2027-01-20,2027-01-20T08:00:00Z,,,\n\
         3,1,receipt,L3,400000,mg,8.00,2027-01-05,2027-01-20T08:00:00Z,,,\n\
         4,1,receipt,L4,200000,mg,5.00,2027-01-05,2027-01-20T08:00:00Z,,,\n\
         5,1,receipt,L5,100,pcs,20.00,2027-01-05,2027-01-20T08:00:00Z,,,\n\
         6,2,issue,L1,-450000,mg,-4.50,2027-01-10,2027-02-10T08:00:00Z,,B-1,\n\
         7,2,issue,L4,-50000,mg,-1.25,2027-01-10,2027-02-10T08:00:00Z,,B-1,\n\
         8,2,receipt,LI,500000,mg,5.75,2027-01-10,2027-02-10T08:00:00Z,,B-1,\n\
         9,3,issue,LI,-300000,mg,-3.45,2027-02-15,2027-02-15T08:00:00Z,,B-2,\n\
         10,3,issue,L2,-100000,mg,-1.20,2027-02-15,2027-02-15T08:00:00Z,,B-2,\n\
         11,3,issue,L3,-100000,mg,-2.00,2027-02-15,2027-02-15T08:00:00Z,,B-2,\n\
         12,3,issue,L5,-10,pcs,-2.00,2027-02-15,2027-02-15T08:00:00Z,,B-2,\n\
         13,5,write-off,L4,-10000,mg,-0.25,2027-01-31,2027-02-28T08:00:00Z,Damp,,\n\
         14,5,write-off,L4,-30000,mg,-0.75,2027-02-20,2027-02-28T08:00:00Z,damp,,\n\
         15,5,write-off,L3,-50000,mg,-1.00,2027-02-28,2027-02-28T08:00:00Z,dropped,,\n",
    ),
    (
        "weighings.csv",
        "batch,place,lot,target,weighed,tare,reason\nB-2,1,LI,300 g,300 g,,\nB-2,2,L2,100 g,100 g,,\n\
         B-2,3,L3,95 g,100 g,,softer than wanted\nB-2,4,L5,10 pcs,10 pcs,,\n",
    ),
    // Ten made, four sold, one given away, two sold and taken back, one not found: four are here.
    (
        "pieces.csv",
        "piece_movement,act,batch,kind,pieces,day,reason,reverses\n1,3,B-2,made,10,2027-02-15,,\n\
         2,4,B-2,sale,-4,2027-02-25,fair,\n3,4,B-2,gift,-1,2027-02-26,,\n4,4,B-2,sale,-2,2027-02-26,,\n\
         5,6,B-2,sale,2,2027-02-28,,4\n6,6,B-2,count,-1,2027-02-28,recount,\n",
    ),
];

/// The workshop, but for the files named `without`, which are empty of rows.
pub fn without(left_out: &[&str]) -> Workshop {
    let workshop = Workshop::empty();
    for (name, text) in FILES.iter().filter(|(name, _)| !left_out.contains(name)) {
        workshop.file(&format!("files/{name}"), text);
    }
    workshop.done(&["import", "files"]);
    workshop
}

/// The workshop.
pub fn workshop() -> Workshop {
    without(&[])
}
