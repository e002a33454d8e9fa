//! How each log is written: names of columns, signs, dates, language.

use crate::chain::{self, TWO_EXPORTS};
use crate::words::Language;
use crate::{Day, LogSet, Options, Writing};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Column {
    /// Serial of the lamp.
    Serial,
    /// Lamp class.
    Class,
    /// Supplier.
    Supplier,
    /// Batch.
    Batch,
    /// Site.
    Site,
    /// Screen.
    Screen,
    /// Day of fitting.
    FittedOn,
    /// Hours at fitting.
    AtFitting,
    /// Hours when the records began.
    FirstSeen,
    /// Hours at the last reading with the lamp good.
    LastGood,
    /// Day of removal.
    RemovedOn,
    /// Hours at removal or at the last reading.
    Hours,
    /// Day of the last reading of a running lamp.
    ReadOn,
    /// Strikes.
    Strikes,
    /// Reason of removal.
    Reason,
}

impl Column {
    /// The field of the study file.
    pub fn field(self) -> &'static str {
        match self {
            Column::Serial => "serial",
            Column::Class => "lamp_class",
            Column::Supplier => "supplier",
            Column::Batch => "batch",
            Column::Site => "site",
            Column::Screen => "screen",
            Column::FittedOn => "fitted_on",
            Column::AtFitting => "hours_at_fitting",
            Column::FirstSeen => "hours_first_seen",
            Column::LastGood => "hours_last_good",
            Column::RemovedOn => "removed_on",
            Column::Hours => "hours",
            Column::ReadOn => "read_on",
            Column::Strikes => "strikes",
            Column::Reason => "reason",
        }
    }
}

/// Which spells of its region a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Share {
    /// All.
    All,
    /// Those fitted by the day of the older export, as they stood then.
    Older,
    /// Those that were open after the day of the older export.
    Newer,
}

/// How one log is written.
#[derive(Clone, Debug)]
pub struct Convention {
    /// Path within the study's folder.
    pub file: &'static str,
    /// Region it covers.
    pub region: usize,
    /// Share of the region's spells.
    pub share: Share,
    /// In windows-1252 rather than UTF-8.
    pub windows_1252: bool,
    /// Begins with a byte-order mark.
    pub mark: bool,
    /// Sign between cells.
    pub delimiter: char,
    /// Decimal sign.
    pub decimal: char,
    /// Sign between thousands.
    pub thousands: Option<char>,
    /// Sign between day, month and year; none for ISO dates.
    pub day_first: Option<char>,
    /// Language of its reasons.
    pub language: Language,
    /// Which word it has for a lamp class: 0 the study's name, else one of the others.
    pub class_word: usize,
    /// A new lamp has a blank in the column of hours at fitting, rather than 0.
    pub blank_is_new: bool,
    /// The header stands again after this many data rows, and a total row ends the file.
    pub pages: Option<usize>,
    /// Day the records began.
    pub records_from: Day,
    /// Day of the export.
    pub exported_on: Day,
    /// Columns in order, with their names.
    pub columns: Vec<(Column, &'static str)>,
}

use Column::{
    AtFitting, Batch, Class, FirstSeen, FittedOn, Hours, LastGood, ReadOn, Reason, RemovedOn, Screen, Serial, Site,
    Strikes, Supplier,
};

const NORTH: [(Column, &str); 15] = [
    (Serial, "Seriennummer"),
    (Class, "Typ"),
    (Supplier, "Lieferant"),
    (Batch, "Charge"),
    (Site, "Haus"),
    (Screen, "Saal"),
    (FittedOn, "Eingebaut am"),
    (AtFitting, "Stunden bei Einbau"),
    (FirstSeen, "Stunden bei Beginn"),
    (RemovedOn, "Ausgebaut am"),
    (Hours, "Stunden"),
    (LastGood, "Letzte gute Ablesung"),
    (ReadOn, "Abgelesen am"),
    (Strikes, "Zuendungen"),
    (Reason, "Grund"),
];

const SOUTH: [(Column, &str); 14] = [
    (Site, "site"),
    (Screen, "screen"),
    (Class, "lamp"),
    (Serial, "serial no"),
    (Supplier, "bought from"),
    (Batch, "batch"),
    (FittedOn, "in"),
    (RemovedOn, "out"),
    (AtFitting, "meter in"),
    (FirstSeen, "meter at roll-out"),
    (Hours, "meter out"),
    (Strikes, "strikes"),
    (Reason, "why out"),
    (ReadOn, "last read"),
];

const WEST: [(Column, &str); 14] = [
    (Serial, "Lamp ID"),
    (Class, "Power"),
    (Site, "Location"),
    (Screen, "Room"),
    (FittedOn, "Start date"),
    (RemovedOn, "End date"),
    (AtFitting, "Start hours"),
    (FirstSeen, "First seen hours"),
    (LastGood, "Last good hours"),
    (Hours, "Hours"),
    (ReadOn, "Reading date"),
    (Reason, "Remark"),
    (Supplier, "Vendor"),
    (Batch, "Date code"),
];

const EAST: [(Column, &str); 14] = [
    (Site, "Spielstätte"),
    (Screen, "Saalnr."),
    (Serial, "Lampen-Nr."),
    (Class, "Größe"),
    (Supplier, "Händler"),
    (Batch, "Los"),
    (FittedOn, "Einbau"),
    (RemovedOn, "Ausbau"),
    (AtFitting, "Std. Einbau"),
    (FirstSeen, "Std. Übernahme"),
    (Hours, "Std. Ausbau"),
    (ReadOn, "Zählerstand vom"),
    (Strikes, "Zündungen"),
    (Reason, "Ausbaugrund"),
];

const CENTRE: [(Column, &str); 15] = [
    (Site, "House"),
    (Screen, "Auditorium"),
    (Serial, "Serial"),
    (Class, "Class"),
    (Supplier, "Supplier"),
    (Batch, "Batch"),
    (FittedOn, "Fitted"),
    (AtFitting, "Hours at fitting"),
    (FirstSeen, "Hours first seen"),
    (LastGood, "Hours last good"),
    (RemovedOn, "Removed"),
    (Hours, "Hours at removal"),
    (Strikes, "Strikes"),
    (Reason, "Reason"),
    (ReadOn, "Read on"),
];

const SECOND: [(Column, &str); 15] = [
    (Screen, "hall"),
    (Site, "house"),
    (Class, "bulb kind"),
    (Serial, "bulb mark"),
    (Batch, "lot"),
    (Supplier, "dealer"),
    (FittedOn, "put in"),
    (RemovedOn, "taken out"),
    (Reason, "remark"),
    (AtFitting, "clock at start"),
    (FirstSeen, "clock at hand-over"),
    (LastGood, "clock when last fine"),
    (Hours, "clock at end"),
    (ReadOn, "clock read"),
    (Strikes, "switch-ons"),
];

/// The logs of a chain.
pub fn conventions(sites: &[chain::Site], options: &Options) -> Vec<Convention> {
    let region_from = |region| {
        let of_region = sites.iter().find(|s| s.region == region);
        of_region.map_or(options.as_of, |s| s.records_from)
    };
    let plain = |file, region, columns: &[(Column, &'static str)]| Convention {
        file,
        region,
        share: Share::All,
        windows_1252: false,
        mark: false,
        delimiter: ',',
        decimal: '.',
        thousands: None,
        day_first: None,
        language: Language::English,
        class_word: 0,
        blank_is_new: false,
        pages: None,
        records_from: region_from(region),
        exported_on: options.as_of,
        columns: columns.to_vec(),
    };
    let mut all = match options.logs {
        LogSet::Second => vec![Convention {
            delimiter: '\t',
            decimal: ',',
            day_first: Some('-'),
            class_word: 2,
            blank_is_new: true,
            ..plain("logs/bulbs.tsv", 0, &SECOND)
        }],
        LogSet::Main => vec![
            Convention {
                mark: true,
                delimiter: ';',
                decimal: ',',
                thousands: Some('.'),
                day_first: Some('.'),
                language: Language::German,
                class_word: 1,
                blank_is_new: true,
                ..plain("logs/north.csv", 0, &NORTH)
            },
            plain("logs/south.csv", 1, &SOUTH),
            Convention {
                thousands: Some(','),
                day_first: Some('/'),
                class_word: 2,
                blank_is_new: true,
                ..plain("logs/west.csv", 2, &WEST)
            },
            Convention {
                windows_1252: true,
                delimiter: ';',
                decimal: ',',
                day_first: Some('.'),
                language: Language::German,
                pages: options.is_full().then_some(200),
                ..plain("logs/east.csv", 3, &EAST)
            },
        ],
    };
    if options.logs == LogSet::Main {
        if options.is_full() {
            let exported_on = chain::older_export(options);
            all.push(Convention {
                share: Share::Older,
                exported_on,
                ..plain("logs/centre_old.csv", TWO_EXPORTS, &CENTRE)
            });
            all.push(Convention { share: Share::Newer, ..plain("logs/centre_new.csv", TWO_EXPORTS, &CENTRE) });
        } else {
            all.push(plain("logs/centre.csv", TWO_EXPORTS, &CENTRE));
        }
    }
    all.retain(|c| sites.iter().any(|s| s.region == c.region));
    for c in &mut all {
        let (delimiter, decimal) = match options.writing {
            Writing::AsDeclared => continue,
            Writing::Points => (',', '.'),
            Writing::Commas => (';', ','),
        };
        c.delimiter = delimiter;
        c.decimal = decimal;
        c.thousands = None;
    }
    all
}
